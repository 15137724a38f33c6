"""Drawing a sheet. Each module draws one format and knows nothing of what the elements mean."""
