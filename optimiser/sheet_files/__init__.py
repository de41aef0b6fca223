"""Files of suppliers, opened within bounds: text, XLSX and ODS become grids of cells, and nothing in them is run.

``files.sheets`` opens one; what its cells mean is the business of ``quote_import``.
"""
