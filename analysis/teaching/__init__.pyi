from .against_expert import teaching as teaching
