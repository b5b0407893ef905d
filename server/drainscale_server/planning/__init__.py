"""What helps before a service: litres to have at hand, bottles to buy, share of new fluid. Pure.

student_t.py   quantiles of Student's t distribution
history.py     a predictive interval from what earlier services took
supply.py      from litres to bottles, and what a drain-and-fill renews
"""
