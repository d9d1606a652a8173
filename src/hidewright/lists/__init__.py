"""Lists in: any spreadsheet, text file or paste becomes rows whose columns have a meaning, with every fault at once and a proposal for each.

    bytes or a paste → grid (cells as written) → headings (which column means what) → cells (units, numbers, words) → draft (rows, faults, questions)

What each list can hold is a `ListKind` of the stage that owns it; nothing here knows a piece or a pigment. Nothing is taken half: a draft
with a fault or an open question gives no rows.
"""
