from .brewing_factors import batch_design as batch_design
from .inverse_prediction import target as target
from .new_bottle import prediction as prediction
from .pls_regression import directions as directions
from .pls_regression import pls as pls
from .score_on_chemistry import link as link
from .what_is_estimable import estimability as estimability
