from .residuals import residual_checks as residual_checks
from .whole_table import anova as anova
