"""The guide that ships with the package: a page a topic, in Markdown. Imports `report.words`."""
