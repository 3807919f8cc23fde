"""One module a page; each draws widgets and calls the chain through :mod:`ui.work`."""
