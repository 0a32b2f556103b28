"""The pure core: a run seen at any moment is a function of its revision, its events and that moment."""
