from .block_design import block_plan as block_plan
from .friedman_test import friedman as friedman
from .page_trend import page as page
from .ranks_in_blocks import rank_blocks as rank_blocks
from .test_of_ranks import rank_test as rank_test
