"""The API of rules, cars and race nights: the same actions and loaders as the pages."""
