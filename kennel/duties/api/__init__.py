"""Views of the duties app that are not made from a record type: board, agenda, inbox, choices."""
