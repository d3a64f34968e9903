"""Parts of pages that are drawn the same wherever they stand."""
