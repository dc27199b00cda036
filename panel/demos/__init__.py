"""The demonstrations: invented scenarios that run the whole job on files.

One file a scenario, with ``run(folder, tell)``; its session folder and the
stated truth its answers are simulated from stand in ``demo_sessions/<name>``.
"""
