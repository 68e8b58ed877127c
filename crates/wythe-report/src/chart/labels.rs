//! Labels at the ends of lines, pushed apart where they would collide.

/// Tops for blocks of the given heights so that none overlaps, each as near to its wish as the
/// others allow: neighbours that collide are merged and centred on the mean of their wishes.
/// `wanted` holds (centre, height); the answer holds centres in the same order, none above
/// `least` with its upper edge.
pub(crate) fn spread(wanted: &[(f64, f64)], least: f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    order.sort_by(|&a, &b| wanted[a].0.total_cmp(&wanted[b].0));

    struct Pile {
        members: Vec<usize>,
        top: f64,
        height: f64,
        /// Sum over members of the top the pile would need for that member's wish.
        wishes: f64,
    }
    let mut piles: Vec<Pile> = Vec::new();
    for i in order {
        let (centre, height) = wanted[i];
        let wish = centre - height / 2.0;
        let mut pile = Pile { members: vec![i], top: wish.max(least), height, wishes: wish };
        while let Some(above) = piles.pop_if(|p| p.top + p.height > pile.top) {
            let count = (above.members.len() + pile.members.len()) as f64;
            let wishes = above.wishes + pile.wishes - above.height * pile.members.len() as f64;
            let mut members = above.members;
            members.extend(pile.members);
            pile = Pile {
                members,
                top: (wishes / count).max(least),
                height: above.height + pile.height,
                wishes,
            };
        }
        piles.push(pile);
    }
    let mut centres = vec![0.0; wanted.len()];
    for pile in piles {
        let mut y = pile.top;
        for i in pile.members {
            centres[i] = y + wanted[i].1 / 2.0;
            y += wanted[i].1;
        }
    }
    centres
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_that_fit_stay_where_they_are() {
        assert_eq!(spread(&[(10.0, 16.0), (50.0, 16.0)], 0.0), vec![10.0, 50.0]);
    }

    #[test]
    fn colliding_labels_part_evenly_and_keep_their_order() {
        assert_eq!(spread(&[(50.0, 16.0), (52.0, 16.0)], 0.0), vec![43.0, 59.0]);
        assert_eq!(spread(&[(52.0, 16.0), (50.0, 16.0)], 0.0), vec![59.0, 43.0]);
    }

    #[test]
    fn forty_labels_on_one_spot_do_not_overlap() {
        let at = spread(&vec![(5.0, 14.0); 40], 0.0);
        for pair in at.windows(2) {
            assert!(pair[1] - pair[0] >= 14.0 - 1e-9);
        }
        assert!(at[0] >= 7.0 - 1e-9);
    }
}
