"""The calculations of the distillery, pure: no clock, file, database or web framework.

`strength` ethanol and water, `making` from cane to hearts, `casks` spirit in oak, `service`
the rules of pouring (its door is `drinks`), `tours` the times of groups; `figure` defines named
figures. Quantities carry their unit in the name; every error is an `errors.FigureError`.
`tests/figures/test_purity.py` lists what may be imported.
"""
