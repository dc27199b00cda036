from .assessor_findings import assessors as assessors
from .few_tasters import Prior as Prior
from .few_tasters import small_panel as small_panel
from .lines_per_assessor import bundle_of_lines as bundle_of_lines
from .panel_over_time import history as history
from .scaling_model import assessor_model as assessor_model
from .shift_of_group import group_shift as group_shift
from .shift_of_group import stability as stability
