from django.db import migrations


class Migration(migrations.Migration):

    dependencies = [
        ('programme', '0021_rehearse'),
    ]

    operations = []
