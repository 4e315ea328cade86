//! Set reports: figures, drawings, CSV, GeoJSON and HTML.
