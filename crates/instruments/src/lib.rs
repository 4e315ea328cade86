//! NMEA 0183 and AIS from files and ports, merged into the state of the ship.
