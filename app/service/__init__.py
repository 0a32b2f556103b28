"""The service: what pages, API and command line call. Above the store, below the web."""
