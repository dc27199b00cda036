"""The session: plan, codes, serving order, roster, batches, store, report, command line.

The only room that knows the key. It imports from `forms` and from `analysis`;
nothing imports from it.
"""
