//! The gear in the water: setting arithmetic and the depth of hooks
