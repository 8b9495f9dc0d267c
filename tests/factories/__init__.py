"""The smallest valid objects, one module per app.  The kennel is always explicit."""
