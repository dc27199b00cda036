from .buyers_sheet import BuyersSheet as BuyersSheet
from .buyers_sheet import buyers_sheet as buyers_sheet
from .files import write_offer as write_offer
