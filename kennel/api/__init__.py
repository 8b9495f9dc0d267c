"""The REST API: problem documents, strict parsing, tenancy and preconditions; views are generated from record types."""
