//! Rows in the order of descent.

/// The generation of each row: 0 where no other row is its parent, else one more than the latest of its parents.
/// `parents` holds the places of each row's parents. Rows of a loop, and those below one, have none.
pub(crate) fn generations(parents: &[Vec<usize>]) -> Vec<Option<u32>> {
    let mut children: Vec<Vec<usize>> = vec![Vec::new(); parents.len()];
    let mut waiting: Vec<usize> = parents.iter().map(Vec::len).collect();
    for (child, of_child) in parents.iter().enumerate() {
        for &parent in of_child {
            if let Some(children) = children.get_mut(parent) {
                children.push(child);
            }
        }
    }
    let mut generation = vec![None; parents.len()];
    let mut front: Vec<usize> = (0..parents.len()).filter(|at| waiting.get(*at) == Some(&0)).collect();
    let mut now = 0;
    while !front.is_empty() {
        let mut next = Vec::new();
        for at in front {
            if let Some(generation) = generation.get_mut(at) {
                *generation = Some(now);
            }
            for &child in children.get(at).map(Vec::as_slice).unwrap_or_default() {
                if let Some(waiting) = waiting.get_mut(child) {
                    *waiting -= 1;
                    if *waiting == 0 {
                        next.push(child);
                    }
                }
            }
        }
        front = next;
        now += 1;
    }
    generation
}

#[cfg(test)]
mod tests {
    use super::generations;

    #[test]
    fn a_row_is_one_generation_after_its_latest_parent() {
        // 0 from 1 and 2, 1 from 2, 3 and 4 from each other, 5 from 4 and 2, 6 twice from 0.
        let parents = [vec![1, 2], vec![2], vec![], vec![4], vec![3], vec![4, 2], vec![0, 0]];
        assert_eq!(generations(&parents), [Some(2), Some(1), Some(0), None, None, None, Some(3)]);
    }
}
