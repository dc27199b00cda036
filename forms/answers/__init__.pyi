from .numbers import number_of as number_of
