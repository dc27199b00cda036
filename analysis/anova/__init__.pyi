from .days_through_reference import ChangeOverDays as ChangeOverDays
from .days_through_reference import change_over_days as change_over_days
from .residuals import residual_checks as residual_checks
from .whole_table import anova as anova
from .years_compared import YearOnYear as YearOnYear
from .years_compared import year_on_year as year_on_year
