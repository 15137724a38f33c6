"""The sheet: heads, pages, elements and where they lie."""
