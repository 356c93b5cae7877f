use serde::{Deserialize, Serialize};

/// What a fix takes for granted about all that readings do not say.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct FixSettings {
    /// One sigma of each horizontal component of the currents' field where no base station was read,
    /// instead of that which the learnt response gives for the reading's hour and Kp.
    pub disturbance_nt: Option<f64>,
    /// Time in which that field's correlation falls to 1/e.
    pub disturbance_correlation_h: f64,
    /// One sigma of what a base station leaves of that field at the reading's place.
    pub base_residual_nt: f64,
    /// Root-mean-square distance of the mean pole from the model's that is believed beforehand, km;
    /// by the model's own doubt where left out.
    pub prior_sigma_km: Option<f64>,
    /// One sigma of each part of G; the model's crust over [`Self::crust_length_km`] where left out.
    pub gradient_nt_per_km: Option<f64>,
    /// The distance over which the crust's field changes by its own sigma.
    pub crust_length_km: f64,
    /// One sigma of the model's Z, crust included: 141 nT is that of WMM2025 (technical report, doi
    /// 10.25923/prbc-s316, section 3.4).
    pub down_nt: f64,
    /// How far away the next reading may be.
    pub reach_km: f64,
}

impl Default for FixSettings {
    fn default() -> Self {
        Self {
            disturbance_nt: None,
            disturbance_correlation_h: 3.0,
            base_residual_nt: 10.0,
            prior_sigma_km: None,
            gradient_nt_per_km: None,
            crust_length_km: 150.0,
            down_nt: 141.0,
            reach_km: 30.0,
        }
    }
}

impl FixSettings {
    /// What is assumed, in sentences.
    #[must_use]
    pub fn assumptions(&self) -> Vec<String> {
        let Self { disturbance_correlation_h, base_residual_nt, crust_length_km, down_nt, .. } =
            self;
        let mut all = vec![
            format!(
                "the currents' field at a reading keeps for {disturbance_correlation_h} h; a base \
                 station leaves {base_residual_nt} nT of it"
            ),
            match self.gradient_nt_per_km {
                Some(sigma) => format!("the model's gradient errs by {sigma} nT/km"),
                None => format!("the crust's field changes by its sigma over {crust_length_km} km"),
            },
            format!("the model's Z errs by {down_nt} nT"),
            "errors are normal out to 2.5 sigma and have a long tail beyond, so that a wild reading \
             counts for little"
                .into(),
        ];
        if let Some(sigma) = self.prior_sigma_km {
            all.push(format!(
                "before the readings the mean pole is believed to be {sigma} km from the model's, root \
                 mean square"
            ));
        }
        match self.disturbance_nt {
            Some(sigma) => all.push(format!("the currents' field has a sigma of {sigma} nT")),
            None => all.push(
                "the currents' field has the size that the response learnt from polar-cap observatories \
                 gives for the hour and the Kp of the reading, mean and scatter together"
                    .into(),
            ),
        }
        all
    }
}
