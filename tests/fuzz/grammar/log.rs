//! Small drive files: columns of road speed or engine speed, conditions, gaps, several ways to write a number.

use sim_tests::dice::Dice;

/// A drive file.
#[derive(Debug, Clone, PartialEq)]
pub struct Log {
    head: String,
    rows: Vec<String>,
}

impl Log {
    /// The text of the file.
    pub fn text(&self) -> String {
        self.rows.iter().fold(format!("{}\n", self.head), |all, row| all + row + "\n")
    }

    /// The same with fewer rows.
    pub fn shorter(&self) -> Option<Log> {
        let rows = self.rows.len() / 2;
        (rows >= 2).then(|| Log { head: self.head.clone(), rows: self.rows[..rows].to_vec() })
    }

    /// Draws one.
    pub fn drawn(d: &mut Dice) -> Log {
        let speed = d.chance(0.5);
        let mut columns = vec![if !speed { "engine_rpm" } else { d.of(&["speed_kmh", "speed_mph"]) }];
        for column in ["set_point_v", "vehicle_load_a", "house_load_w", "house_solar_w", "air_c"] {
            if d.chance(0.2) {
                columns.push(column);
            }
        }
        let head = std::iter::once("time_s").chain(columns.iter().copied()).collect::<Vec<_>>().join(",");
        let step_s = if d.once_in(3) { 1.0 } else { d.log_between(0.2, 60.0) };
        let (mut t_s, mut now) = (0.0, vec![0.0; columns.len()]);
        let mut rows = Vec::new();
        let most = if d.once_in(4) { 400 } else { 60 };
        for _ in 0..2 + d.below(most) {
            let mut row = format!("{t_s:.3}");
            for (column, value) in columns.iter().zip(&mut now) {
                if d.once_in(5) {
                    *value = sample(column, d);
                }
                row += &format!(",{value:.2}");
            }
            rows.push(row);
            t_s += if d.once_in(100) { d.log_between(60.0, 20_000.0) } else { step_s };
        }
        Log { head, rows }
    }
}

fn sample(column: &str, d: &mut Dice) -> f64 {
    match column {
        "engine_rpm" if d.once_in(4) => 0.0,
        "engine_rpm" => d.between(500.0, 4000.0),
        "speed_kmh" | "speed_mph" if d.once_in(3) => 0.0,
        "speed_kmh" | "speed_mph" => d.between(0.0, 130.0),
        "set_point_v" => d.between(12.0, 15.2),
        "vehicle_load_a" => d.between(0.0, 80.0),
        "house_load_w" => d.log_between(1.0, 1500.0),
        "house_solar_w" => d.between(0.0, 500.0),
        _ => d.between(-30.0, 45.0),
    }
}
