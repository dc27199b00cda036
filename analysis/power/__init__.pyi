from .detectable_difference import detectable as detectable
from .detectable_difference import detectable_in as detectable_in
from .numbers_of_assessors import assessors_for as assessors_for
from .numbers_of_assessors import supply as supply
from .power_of_tests import ScorePlan as ScorePlan
from .profile_sizes import profile_size as profile_size
from .sizes_by_interval import agreement_size as agreement_size
from .sizes_by_interval import fault_size as fault_size
