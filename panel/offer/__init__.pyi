from .files import write_offer as write_offer
from .one_page import BuyersSheet as BuyersSheet
from .one_page import buyers_sheet as buyers_sheet
