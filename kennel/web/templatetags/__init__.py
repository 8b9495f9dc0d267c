"""Template tags of the platform: times in the kennel's zone, addresses of static files, form fields."""
