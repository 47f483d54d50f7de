"""Everything that reads across tables: values for pages, acts and exports, in a constant number of queries."""
