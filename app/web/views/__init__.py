"""Page contexts: frozen values made from a situation, ready to be printed. They decide nothing and store nothing."""
