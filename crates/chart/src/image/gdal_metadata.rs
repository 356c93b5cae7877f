//! What GDAL writes of a band beside the numbers: scale, offset, unit, description.
//!
//! Source: GDAL raster drivers, GTiff: the tag `GDAL_METADATA` (42112), and the sidecar `.aux.xml`.

use xml::reader::{EventReader, XmlEvent};

/// What is stated of a band; absent where nothing is.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct BandMetadata {
    pub(super) scale: Option<f64>,
    pub(super) offset: Option<f64>,
    pub(super) unit: Option<String>,
    pub(super) description: Option<String>,
    pub(super) nodata: Option<String>,
}

impl BandMetadata {
    /// What the one states, or else the other.
    pub(super) fn or(self, other: Self) -> Self {
        Self {
            scale: self.scale.or(other.scale),
            offset: self.offset.or(other.offset),
            unit: self.unit.or(other.unit),
            description: self.description.or(other.description),
            nodata: self.nodata.or(other.nodata),
        }
    }

    /// Of a band, from the tag's text. `band` counts from 0.
    ///
    /// # Errors
    ///
    /// For text that is no XML.
    pub(super) fn of_tag(text: &str, band: usize) -> Result<Self, String> {
        let mut own = Self::default();
        let mut role: Option<String> = None;
        for event in EventReader::new(text.trim_matches('\0').as_bytes()) {
            match event.map_err(|error| format!("has metadata that are no XML: {error}"))? {
                XmlEvent::StartElement { attributes, .. } => {
                    let get = |wanted: &str| {
                        let mut all = attributes.iter();
                        all.find(|own| own.name.local_name == wanted).map(|own| own.value.clone())
                    };
                    let here =
                        get("sample").and_then(|own| own.parse::<usize>().ok()) == Some(band);
                    role = get("role").filter(|_| here);
                }
                XmlEvent::Characters(text) => {
                    if let Some(role) = role.take() {
                        own.take(&role, &text);
                    }
                }
                _ => role = None,
            }
        }
        own.check()
    }

    /// Of a band, from the sidecar. `band` counts from 0.
    ///
    /// # Errors
    ///
    /// As [`BandMetadata::of_tag`].
    pub(super) fn of_sidecar(text: &str, band: usize) -> Result<Self, String> {
        let mut own = Self::default();
        let (mut here, mut element) = (false, String::new());
        for event in EventReader::new(text.as_bytes()) {
            match event
                .map_err(|error| format!("has a sidecar .aux.xml that is no XML: {error}"))?
            {
                XmlEvent::StartElement { name, attributes, .. } => {
                    if name.local_name == "PAMRasterBand" {
                        let number = attributes.iter().find(|own| own.name.local_name == "band");
                        here = number.and_then(|own| own.value.parse().ok()) == Some(band + 1);
                    }
                    element = name.local_name;
                }
                XmlEvent::Characters(text) if here => {
                    own.take(&element.to_ascii_lowercase(), &text);
                }
                XmlEvent::EndElement { name } => {
                    here &= name.local_name != "PAMRasterBand";
                    element.clear();
                }
                _ => {}
            }
        }
        own.check()
    }

    fn take(&mut self, what: &str, text: &str) {
        let text = text.trim();
        match what {
            // What cannot be read must not pass for the default.
            "scale" => self.scale = Some(text.parse().unwrap_or(f64::NAN)),
            "offset" => self.offset = Some(text.parse().unwrap_or(f64::NAN)),
            "unittype" if !text.is_empty() => self.unit = Some(text.to_owned()),
            "description" if !text.is_empty() => self.description = Some(text.to_owned()),
            "nodatavalue" => self.nodata = Some(text.to_owned()),
            _ => {}
        }
    }

    fn check(self) -> Result<Self, String> {
        let sound = |number: Option<f64>| number.is_none_or(f64::is_finite);
        if sound(self.scale) && sound(self.offset) && self.scale != Some(0.0) {
            Ok(self)
        } else {
            Err("has a scale or offset that is no number".to_owned())
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const TAG: &str = r#"<GDALMetadata><Item name="AREA">x</Item><Item name="OFFSET" sample="0" role="offset">-2</Item><Item name="SCALE" sample="0" role="scale">0.01</Item><Item name="UNITTYPE" sample="0" role="unittype">m</Item><Item name="SCALE" sample="1" role="scale">7</Item></GDALMetadata>"#;

    #[test]
    fn a_band_has_its_own() {
        let own = BandMetadata::of_tag(TAG, 0).unwrap();
        assert_eq!(
            (own.scale, own.offset, own.unit.as_deref()),
            (Some(0.01), Some(-2.0), Some("m"))
        );
        assert_eq!(BandMetadata::of_tag(TAG, 1).unwrap().scale, Some(7.0));
        assert_eq!(BandMetadata::of_tag(TAG, 2).unwrap(), BandMetadata::default());
        let sidecar = r#"<PAMDataset><PAMRasterBand band="2"><Scale>3</Scale></PAMRasterBand><PAMRasterBand band="1"><NoDataValue>-9</NoDataValue><UnitType>cm</UnitType></PAMRasterBand></PAMDataset>"#;
        let own = BandMetadata::of_sidecar(sidecar, 0).unwrap();
        assert_eq!(
            (own.scale, own.nodata.as_deref(), own.unit.as_deref()),
            (None, Some("-9"), Some("cm"))
        );
        assert!(BandMetadata::of_tag("<a><b>", 0).is_err());
        assert!(BandMetadata::of_tag(&TAG.replace("0.01", "x"), 0).is_err());
    }

    proptest! {
        #[test]
        fn mutated_text_does_not_panic(place in 0usize..300, byte in 32u8..127) {
            let mut bytes = TAG.as_bytes().to_vec();
            let place = place % bytes.len();
            bytes[place] = byte;
            let _ = BandMetadata::of_tag(&String::from_utf8(bytes).unwrap(), 0);
        }
    }
}
