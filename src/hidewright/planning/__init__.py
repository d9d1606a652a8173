"""Planning: what goes on which table on which day, so that all of it is done, dry and turned in time.

`problem` says what must be planned, `routes` what a piece goes through, `calendar` when people work; `listplan` plans as a careful person would, `cpsat`
tries to better it, `audit` checks every plan without knowing who made it, `bound` says how early any plan could end, `plan` runs them in order.
"""
