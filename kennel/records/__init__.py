"""What every record obeys: the base tables, the journal, the one write door, the protection SQL, the registry.

Three database roles use these tables: *owner* (owns and migrates them, backs them up, sees everything), *app* (the web:
one kennel at a time, by row-level security) and *jobs* (the ticks: reads all kennels, writes only machine rows).
Nothing here knows about dogs; apps register their record types in `apps.py`.
"""
