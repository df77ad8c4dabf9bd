"""The commands: one file a verb, each a thin shell round pure functions.

At module level these files import the standard library and typer only, so that ``--help`` loads
no pandas.
"""
