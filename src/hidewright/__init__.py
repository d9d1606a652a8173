"""Colour, quantity and days for people who refinish the leather of whole interiors.

The way of the work: an interior arrives as pieces (`survey`); the shop agrees a colour and finds what to put in
the cup (`colour`); areas, coats and hiding become litres with odds (`takeoff`); cups are poured, topped up and
kept in jars on a ledger that nothing is erased from (`mixing`); every face of every piece is given its day, its
table and its hands (`planning`); cautions stand beside the act (`safety`); what the bench needs is drawn
(`charts`) and printed (`papers`). `demo` carries an invented interior as the files a user would bring. One Django app, `workshop`, remembers everything, and
`cli` is the `hidewright` command. `api` is the public face for Python. A stage imports only what lies below it.
"""

__version__ = "0.2.0"
