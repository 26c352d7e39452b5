//! Which of the machine's addresses a phone on the same network reaches it by.

use std::net::IpAddr;

/// Why no address was chosen.
#[derive(Debug, thiserror::Error)]
pub enum AddressError {
    /// The machine does not tell its addresses.
    #[error("the machine's network addresses can't be listed")]
    Unlisted(#[source] std::io::Error),
    /// None of them is of a local network.
    #[error(
        "this machine has no address in a local network that a phone could reach{}", others(.0)
    )]
    None(Vec<IpAddr>),
}

fn others(found: &[IpAddr]) -> String {
    match found {
        [] => "; connect it to the network that the phone is in".to_owned(),
        found => format!("; its addresses are {}", listed(found)),
    }
}

/// Addresses in words.
#[must_use]
pub fn listed(addresses: &[IpAddr]) -> String {
    addresses.iter().map(IpAddr::to_string).collect::<Vec<_>>().join(", ")
}

/// The addresses that this machine can be reached at from elsewhere; none if it does not tell them.
#[must_use]
pub fn own_addresses() -> Vec<IpAddr> {
    let own = interfaces().unwrap_or_default().into_iter().map(|(address, _)| address);
    // Of one that is good for a single link its interface would have to be named too.
    own.filter(|address| !matches!(address, IpAddr::V6(ip) if ip.is_unicast_link_local())).collect()
}

/// The addresses of interfaces that are up, each with whether it is one end of a tunnel.
fn interfaces() -> std::io::Result<Vec<(IpAddr, bool)>> {
    let all = if_addrs::get_if_addrs()?;
    let usable = all.iter().filter(|interface| interface.is_oper_up() && !interface.is_loopback());
    Ok(usable.map(|interface| (interface.ip(), interface.is_p2p())).collect())
}

/// The machine's address in its local network, and others that it could be.
///
/// # Errors
/// If there is none. A public address is never chosen: it has to be named.
pub fn lan_address() -> Result<(IpAddr, Vec<IpAddr>), AddressError> {
    choose(&interfaces().map_err(AddressError::Unlisted)?)
}

/// Among addresses, each with whether it is one end of a tunnel: private IPv4 first (RFC 1918), then unique local IPv6
/// (RFC 4193); a tunnel's last.
fn choose(found: &[(IpAddr, bool)]) -> Result<(IpAddr, Vec<IpAddr>), AddressError> {
    let rank = |address: &IpAddr, tunnel: bool| match address {
        IpAddr::V4(ip) if ip.is_private() => Some((tunnel, 0)),
        IpAddr::V6(ip) if ip.is_unique_local() => Some((tunnel, 1)),
        _ => None,
    };
    let mut fitting: Vec<_> = found.iter().filter_map(|(ip, tunnel)| Some((rank(ip, *tunnel)?, *ip))).collect();
    fitting.sort_by_key(|(rank, _)| *rank);
    let mut addresses = fitting.into_iter().map(|(_, ip)| ip);
    match addresses.next() {
        Some(first) => Ok((first, addresses.collect())),
        None => Err(AddressError::None(found.iter().map(|(ip, _)| *ip).collect())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_private_address_is_chosen_and_no_public_one() {
        let given =
            |list: &[(&str, bool)]| list.iter().map(|(ip, p2p)| (ip.parse().unwrap(), *p2p)).collect::<Vec<_>>();
        let chosen = |list: &[(&str, bool)]| choose(&given(list)).map(|(first, _)| first.to_string());
        let home = [("fe80::1", false), ("fd00::5", false), ("203.0.113.9", false), ("192.168.1.20", false)];
        assert_eq!(chosen(&home).unwrap(), "192.168.1.20");
        assert_eq!(chosen(&[("10.8.0.2", true), ("172.16.4.4", false)]).unwrap(), "172.16.4.4");
        assert_eq!(chosen(&[("10.8.0.2", true)]).unwrap(), "10.8.0.2");
        assert_eq!(chosen(&[("203.0.113.9", false), ("fd00::5", false)]).unwrap(), "fd00::5");
        let none = chosen(&[("203.0.113.9", false), ("169.254.3.3", false)]).unwrap_err().to_string();
        assert!(none.ends_with("its addresses are 203.0.113.9, 169.254.3.3"), "{none}");
        assert!(chosen(&[]).unwrap_err().to_string().contains("connect it"));
        let (_, others) = choose(&given(&[("10.0.0.1", false), ("192.168.1.20", false)])).unwrap();
        assert_eq!(listed(&others), "192.168.1.20");
    }
}
