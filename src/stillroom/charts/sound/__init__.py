"""The pictures of sound: levels against speed, spectra, ramps, and airflow against noise."""
