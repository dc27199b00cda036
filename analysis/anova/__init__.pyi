from .whole_table import anova as anova
