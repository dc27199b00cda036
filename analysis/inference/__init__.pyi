from .adjusted_p import adjust as adjust
from .equivalence_tests import equivalence as equivalence
from .equivalence_tests import equivalence_paired as equivalence_paired
from .proportions import clopper_pearson as clopper_pearson
from .proportions import proportion as proportion
from .proportions import silent_panel as silent_panel
from .proportions import upper_limit as upper_limit
from .proportions import wilson as wilson
