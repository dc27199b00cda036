from .house_memory import HouseMemory as HouseMemory
from .house_memory import remember as remember
