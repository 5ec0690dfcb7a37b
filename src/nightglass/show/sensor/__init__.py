"""Words and pictures for what was measured of the sensor."""
