"""The site as the user wrote it: models, cross-record rules, reading and saving YAML."""
