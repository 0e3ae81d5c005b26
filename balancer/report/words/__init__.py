"""The words that all results are told in: numbers, tables, cautions, shapes of JSON, widths."""
