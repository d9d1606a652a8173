"""Planning: what goes on which table on which day, so that all of it is done, dry and turned in time.

`problem` says what must be planned, `plan` what a plan is and the audit that every plan must pass, `solve` how plans are made and how early any plan could end, `change` how
planning goes on while the work is under way.
"""
