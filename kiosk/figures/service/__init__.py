"""The rules of pouring: policy, decision, plan of a flight, bottles and the balance of a shift.

`kiosk.figures.drinks` is the door to the rules and decisions; `bottles` and `stocktaking` are
imported by their own names. Amounts are whole numbers: volumes in µL, ethanol in 1e-4 µL.
"""
