from .free_text import read_words as read_words
