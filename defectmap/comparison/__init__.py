"""Before and after: may they be compared, and how much has changed."""
