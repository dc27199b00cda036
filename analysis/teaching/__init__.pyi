from .against_expert import teaching as teaching
from .pass_marks import pass_mark as pass_mark
from .pass_marks import screening as screening
from .without_expert import beside_the_table as beside_the_table
