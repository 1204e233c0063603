// Rotor carrier. It is printed with the downstream socket on the bed: air flows downwards.
// From the bed up: socket, cone, three arms that rise to the hub, room of the rotor, socket with a flat shoulder.

hub_radius = 7;

function arm_root() = socket_depth + steep * (socket_inner - bore) / 2 + 1;
function hub_tip() = arm_root() + steep * bore / 2;
function hub_top() = hub_tip() + steep * hub_radius + 8;
function rotor_base() = hub_top() + boss_height;                       // downstream face of the rotor
function magnet_height() = rotor_base() + magnet_floor + magnet_diameter / 2;
function upper_shoulder() = rotor_base() + rotor_height + before_rotor;
function carrier_height() = upper_shoulder() + socket_depth;

module carrier_body() {
    inside = socket_inner / 2;
    rotate_extrude() polygon([
        [inside, 0], [inside, socket_depth], [bore / 2, socket_depth + steep * (inside - bore / 2)],
        [bore / 2, upper_shoulder()], [inside, upper_shoulder()], [inside, carrier_height()],
        [inside + wall, carrier_height()], [inside + wall, 0],
    ]);
}

module arms() {
    for (angle = [30, 150, 270]) rotate([0, 0, angle]) upright(2.4) polygon([
        [0, hub_tip()], [0, hub_tip() + 3], [hub_radius - 0.5, hub_tip() + 3],
        [bore / 2 + 1, arm_root() + 7], [bore / 2 + 1, arm_root() - steep],
    ]);
}

module hub() {
    hole = pin / 2 + 0.05;
    rotate_extrude($fn = 48) polygon([
        [0, hub_tip()], [hub_radius, hub_tip() + steep * hub_radius], [hub_radius, hub_top()],
        [2.5, hub_top()], [2.5, rotor_base()], [hole, rotor_base()], [hole, hub_top() - pin_depth],
        [0, hub_top() - pin_depth],
    ]);
}

// Pocket of the Hall switch: open to the room, its floor stays closed towards the bore; its roof is a gable.
module hall_pocket() {
    half = 2.4;
    bottom = magnet_height() - 2.2;
    translate([0, bore / 2 + pocket_floor + 50, 0]) upright(100) polygon([
        [-half, bottom], [half, bottom], [half, bottom + 11], [0, bottom + 11 + steep * half], [-half, bottom + 11],
    ]);
}

module carrier() {
    difference() {
        union() { carrier_body(); arms(); }
        hall_pocket();
    }
    hub();
}
