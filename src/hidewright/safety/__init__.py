"""Safety: damp and drying, air, emissions, burn records, and the cautions that stand beside each act.

Everything here compares and warns. It gives no clearance: the product's data sheet, local codes, and licensed or authorised people decide.
"""
