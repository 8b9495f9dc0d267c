"""The platform: people, records, duties, reports, the API and the pages.  No rule about dogs lives here."""
