"""Heat: from the files of loggers to temperature rises at nominal power, steady or forecast, against speed."""
