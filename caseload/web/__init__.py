"""Pages: addresses, forms, tables and views. An app with no tables of its own."""
