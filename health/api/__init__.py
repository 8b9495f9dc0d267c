"""Views of the health app under the API."""
