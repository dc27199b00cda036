from .free_text import read_words as read_words
from .free_text import sure_words as sure_words
from .near_misses import mark_words as mark_words
