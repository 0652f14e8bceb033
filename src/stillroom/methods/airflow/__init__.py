"""The airflow test: chamber or duct readings to points, characteristics and resistances."""
