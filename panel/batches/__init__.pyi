from .book import BatchBook as BatchBook
from .book import load_book as load_book
from .reading import read_file as read_file
