"""The reader's page: a folder of plain files that looks up what the release computed."""
