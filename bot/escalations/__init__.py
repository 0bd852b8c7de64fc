"""A worry from the moment it is raised until somebody has closed it.

Room for raising, telling, repeating and listing. Not for what is worrying: that is `rules`.
"""
