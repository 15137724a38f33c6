"""What was found, for people and programs: text, JSON, pictures, pages."""
