"""Pictures of what has been computed: curves as Vega-Lite specifications, everything else as SVG text.

Pure: numbers in, a specification or an SVG string out. The page and the paper carry the same picture. Nothing
here tells anything by colour alone: a pattern, a dash or a word always says it too.
"""
