from .claim_members import Named as Named
from .one_budget import claims as claims
from .power_of_claims import planned as planned
from .power_of_claims import smallest_difference as smallest_difference
