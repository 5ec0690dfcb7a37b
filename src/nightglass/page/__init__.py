"""The page: the whole job in a browser, by the same functions as the commands."""
