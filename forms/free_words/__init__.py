"""What do people mean by the words that they wrote freely?"""
