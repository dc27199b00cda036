from .serving_orders import balance as balance
from .serving_orders import nearly_balanced as nearly_balanced
