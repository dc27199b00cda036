"""How does chemistry go with taste over bottles and batches?"""
